"""Kernels: small functions written in a subset of Python and compiled to machine code, for loops that must be fast.

``language`` holds the types that a kernel works on and says what it may contain, ``translate`` makes LLVM's
intermediate language of it, ``machine`` makes machine code of that, keeps it and loads it. A kernel is an ordinary
Python function too, so what the compiled one does can be held against what the interpreter makes of the same lines.
"""
