"""What is shown while it talks: for the laptop on the picnic table, and the small terminal."""
