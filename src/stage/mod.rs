//! Where bodies are: joint chains and shapes.
