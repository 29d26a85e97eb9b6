"""What a user states: the study file, one part's question, defaults with reasons, a first study from a bill."""
