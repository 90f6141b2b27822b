"use strict";
(() => {
  const data = JSON.parse(document.getElementById("playback").textContent);
  const by = (id) => document.getElementById(id);
  const [tempo, volume, click, again] = ["tempo", "volume", "click", "again"].map(by);
  const AHEAD = 0.15; // seconds that are scheduled in advance
  const EVERY = 30; // milliseconds between looks at the clock
  const CLOSE = 1e-4; // seconds that rounding may part what is together
  const LEAD = 0.08; // seconds from a click to the first note

  // Notes of the notation by their index: a tied note has several heads, and each stands in both widths.
  const heads = new Map();
  for (const head of document.querySelectorAll("[data-note]")) {
    const note = Number(head.dataset.note);
    heads.set(note, [...(heads.get(note) || []), head]);
  }

  let context = null;
  let out = null;
  let playing = null;

  function sound() {
    if (!context) {
      context = new AudioContext();
      const limiter = context.createDynamicsCompressor();
      out = context.createGain();
      out.connect(limiter).connect(context.destination);
    }
    setVolume();
    return context.resume();
  }

  function setVolume() {
    // Loudness grows with the square of the slider, as faders do.
    if (out) out.gain.value = (volume.value / 100) ** 2 * 1.6;
  }

  function voice(type, frequency, at, length, loudness, cutoff) {
    const oscillator = context.createOscillator();
    const filter = context.createBiquadFilter();
    const gain = context.createGain();
    oscillator.type = type;
    oscillator.frequency.value = frequency;
    filter.type = "lowpass";
    filter.frequency.setValueAtTime(cutoff, at);
    filter.frequency.exponentialRampToValueAtTime(Math.max(cutoff / 4, 80), at + length);
    gain.gain.setValueAtTime(0.0001, at);
    gain.gain.exponentialRampToValueAtTime(loudness, at + 0.008);
    gain.gain.exponentialRampToValueAtTime(loudness * 0.4, at + Math.max(length * 0.7, 0.012));
    gain.gain.exponentialRampToValueAtTime(0.0001, at + length + 0.03);
    oscillator.connect(filter).connect(gain).connect(out);
    oscillator.start(at);
    oscillator.stop(at + length + 0.05);
    playing.voices.add(oscillator);
    oscillator.onended = () => playing && playing.voices.delete(oscillator);
  }

  function pluck(pitch, isGhost, at, length) {
    const loudness = isGhost ? 0.15 : 0.4;
    if (pitch === null) {
      voice("square", 90, at, 0.04, 0.15, 300);
      return;
    }
    const frequency = 440 * 2 ** ((pitch - 69) / 12);
    // The triangle carries the tone; the sawtooth's upper partials are what small loudspeakers can give of a bass.
    voice("triangle", frequency, at, length, loudness, 2400);
    voice("sawtooth", frequency, at, length, loudness * 0.35, Math.min(frequency * 9, 2600));
  }

  const rate = () => tempo.value / data.tempo;

  // Seconds of the schedule (at the tempo it was made for) at a time of the audio clock, and back.
  const position = (run, time) => run.position + (time - run.time) * run.rate;
  const clock = (run, where) => run.time + (where - run.position) / run.rate;

  function play(first, begin, end, name, button) {
    stop();
    const notes = data.notes.filter(([, start]) => start >= begin - CLOSE && start < end - CLOSE);
    sound().then(() => {
      stop();
      const time = context.currentTime + LEAD;
      playing = {
        begin, end, name, button, time, position: begin, rate: rate(), notes, voices: new Set(),
        clicks: data.clicks.filter(([start]) => start >= begin - CLOSE && start < end - CLOSE),
        nextNote: 0, nextClick: 0, lights: [], timer: 0,
      };
      by("stop").disabled = false;
      if (button) button.classList.add("playing");
      say(`Playing ${name}`);
      if (first !== null) show(first);
      look();
      requestAnimationFrame(light);
    });
  }

  function look() {
    const run = playing;
    if (!run) return;
    const until = context.currentTime + AHEAD;
    for (;;) {
      while (run.nextNote < run.notes.length && clock(run, run.notes[run.nextNote][1]) < until) {
        const [note, start, length, pitch, isGhost] = run.notes[run.nextNote++];
        const at = Math.max(clock(run, start), context.currentTime);
        const lasts = Math.min(length, run.end - start) / run.rate;
        pluck(pitch, isGhost, at, Math.max(lasts, 0.05));
        run.lights.push({ note, on: at, off: at + lasts, lit: false });
      }
      while (run.nextClick < run.clicks.length && clock(run, run.clicks[run.nextClick][0]) < until) {
        const [start, isFirst] = run.clicks[run.nextClick++];
        if (click.checked) voice("square", isFirst ? 1600 : 1100, Math.max(clock(run, start), context.currentTime), 0.03, 0.12, 4000);
      }
      if (clock(run, run.end) >= until) break;
      if (!again.checked) break;
      // Begin again on time: the passage's end is its next beginning.
      Object.assign(run, { time: clock(run, run.end), position: run.begin, nextNote: 0, nextClick: 0 });
    }
    if (context.currentTime > clock(run, run.end) + 0.05 && !again.checked) {
      finish("Ended");
      return;
    }
    run.timer = setTimeout(look, EVERY);
  }

  function light() {
    const run = playing;
    if (!run) return;
    const now = context.currentTime;
    for (const one of run.lights) {
      if (!one.lit && now >= one.on && now < one.off) {
        one.lit = true;
        mark(one.note, true);
      } else if (now >= one.off) {
        if (one.lit) mark(one.note, false);
        one.done = true;
      }
    }
    run.lights = run.lights.filter((one) => !one.done);
    requestAnimationFrame(light);
  }

  function mark(note, on) {
    for (const head of heads.get(note) || []) head.classList.toggle("lit", on);
  }

  function show(note) {
    const head = (heads.get(note) || []).find((one) => one.getBoundingClientRect().height > 0);
    if (!head) return;
    const box = head.getBoundingClientRect();
    if (box.top >= 0 && box.bottom <= innerHeight - 150) return;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    head.closest(".system").scrollIntoView({ block: "center", behavior: still ? "auto" : "smooth" });
  }

  function stop() {
    if (!playing) return;
    const run = playing;
    clearTimeout(run.timer);
    playing = null;
    for (const one of run.voices) {
      one.onended = null;
      one.stop();
    }
    for (const one of run.lights) mark(one.note, false);
    if (run.button) run.button.classList.remove("playing");
    by("stop").disabled = true;
  }

  function finish(words) {
    const isFocused = document.activeElement === by("stop");
    const button = playing && playing.button;
    stop();
    say(words);
    // A button that is disabled loses the focus: it goes back to where playing began.
    if (isFocused) (button || by("play-line")).focus();
  }

  function say(words) {
    by("status").textContent = words;
  }

  function playMark(number, button, scroll) {
    const { first, last, label, where } = data.marks[number];
    const inside = data.notes.filter(([note]) => note >= first && note <= last);
    const end = inside[inside.length - 1];
    play(scroll ? first : null, inside[0][1], end[1] + end[2], `${label}, ${where}`, button);
  }

  function playBars(from, to, button) {
    const [low, high] = from <= to ? [from, to] : [to, from];
    const [a, b] = [data.bars[low], data.bars[high]];
    const note = data.notes.find(([, start]) => start >= a[1] - CLOSE);
    const name = low === high ? `${data.words.one} ${a[0]}` : `${data.words.many} ${a[0]} to ${b[0]}`;
    play(button && note ? note[0] : null, a[1], b[2], name, button);
  }

  function clicked(event) {
    const target = event.target;
    const mark = target.closest("[data-mark]");
    if (mark) return playMark(Number(mark.dataset.mark), null, false);
    const head = target.closest("[data-note]");
    const bar = target.closest(".measure");
    if (head) {
      const note = Number(head.dataset.note);
      const number = data.marks.findIndex(({ first, last }) => note >= first && note <= last);
      if (number >= 0) return playMark(number, null, false);
    }
    const inside = head || (bar && bar.querySelector("[data-note]"));
    if (!inside) return undefined;
    const entry = data.notes.find(([note]) => note === Number(inside.dataset.note));
    const index = entry ? data.bars.findIndex(([, start, end]) => entry[1] >= start - CLOSE && entry[1] < end - CLOSE) : -1;
    return index < 0 ? undefined : playBars(index, index, null);
  }

  function setTempo() {
    if (playing) {
      // What is scheduled stays; from now on the rest goes at the new tempo.
      const now = context.currentTime;
      Object.assign(playing, { position: position(playing, now), time: now, rate: rate() });
    }
    by("tempo-shown").value = `${tempo.value} a minute`;
  }

  tempo.value = Math.round(data.tempo);
  setTempo();
  tempo.addEventListener("input", setTempo);
  volume.addEventListener("input", setVolume);
  by("play-line").addEventListener("click", (event) => playBars(0, data.bars.length - 1, event.currentTarget));
  by("play-bars").addEventListener("click", (event) => playBars(by("from").selectedIndex, by("to").selectedIndex, event.currentTarget));
  by("stop").addEventListener("click", () => finish("Stopped"));
  for (const one of document.querySelectorAll("[data-play]")) {
    const number = Number(one.dataset.play);
    one.addEventListener("click", () => playMark(number, one.matches("button") ? one : null, true));
  }
  for (const one of document.querySelectorAll("[data-notation]")) one.addEventListener("click", clicked);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && playing) finish("Stopped");
  });
})();
