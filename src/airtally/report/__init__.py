"""The record in words, figures, one screen and PDF; nothing else rounds."""
