"""Our own recogniser: features, network, scoring of phrases and readings, confidence."""

from handsfree.hearing.own.recogniser import OwnRecogniser

__all__ = ["OwnRecogniser"]
