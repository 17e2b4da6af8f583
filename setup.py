"""What pyproject.toml cannot say: `profiles/` is kept at the top and laid inside the package as built."""

from setuptools import find_namespace_packages, setup

ROBOTS = "mixer.examples.robots"

setup(
    packages=[*find_namespace_packages(include=["mixer*", "tui*"]), ROBOTS],
    package_dir={ROBOTS: "profiles"},
)
