"""What is written of a result: the result file, the choice in it, and the verdict of an option."""
