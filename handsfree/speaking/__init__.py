"""What the operator hears: voices, prompts ready ahead of time, earcons, text made speakable."""
