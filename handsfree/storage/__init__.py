"""What is kept on disk: paths, whole-file writing, the journal, the rig's record."""
