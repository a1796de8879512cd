"""What the commands say as JSON of invented logs, held: keys and numbers in one file, sentences in another."""
