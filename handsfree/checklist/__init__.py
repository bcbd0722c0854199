"""What a checklist is: conditions over facts, the model, and the YAML files that say it."""
