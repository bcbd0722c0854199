"""Takes checklists/ and models/, which lie beside the package, into what is installed."""

from setuptools import find_packages, setup

BESIDE = {"handsfree._checklists": "checklists", "handsfree._models": "models"}

setup(
    packages=[*find_packages(include=["handsfree", "handsfree.*"]), *BESIDE],
    package_dir=BESIDE,
    package_data={
        "handsfree": ["py.typed", "languages/*.yaml", "paper/fonts/*"],
        "handsfree._checklists": ["*.yaml", "*/*.yaml", "verdicts.json"],
        "handsfree._models": [f"{folder}*.{kind}" for folder in ("", "*/") for kind in (
            "md", "npz", "onnx", "json", "txt", "gz")],
    },
)
