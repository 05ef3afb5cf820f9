"""What is looked up: rules and pipes. Data with a source at every number; a site's overrides are laid on top."""
