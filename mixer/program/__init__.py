"""The front door for programs: what `import mixer` gives."""
