import handsfree  # noqa: F401  before numpy, whose threads it limits
