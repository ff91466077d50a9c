"""The bench: a battery inverter in software, with its line, its gateway and its data logger.

`python -m tests.bench` runs it as a process of its own; `tests.bench.remote.Bench` starts and orders it from a test.
The command line and the control protocol are in README.md beside this file.
"""
