"""The robot that is opened when no profile is named."""
