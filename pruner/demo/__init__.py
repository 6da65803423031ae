"""The invented scenario that everything can be tried on; floor 5, see DEVELOPERS.md."""

from pruner.demo.write import planted, write_demo

__all__ = ["planted", "write_demo"]
