"""The invented station of the demo. Every name and every figure in here is made up."""
