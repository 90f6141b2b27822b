"""From a transcription to what is read and printed: MusicXML, engraved pages."""
