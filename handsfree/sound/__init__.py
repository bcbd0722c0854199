"""Sound that is not speech, sound mixed with speech, sound in files."""
