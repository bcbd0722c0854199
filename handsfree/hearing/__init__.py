"""From sound to words: endpointing, recognisers and the listener that joins them."""
