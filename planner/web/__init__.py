"""The local web page: forms, the plan, tension, what if, and the JSON interface."""
