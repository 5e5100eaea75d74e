"""What the loggers said: files as received become one Log, flagged and never thinned out."""
