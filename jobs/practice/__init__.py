"""A job played on a simulated vehicle: by the demo, by tests, and for practice.

`scenario` reads the invented workshop, `shop` enters it in the registers, `bench` is the vehicle
with its hidden fault, `tablet` sends entries through the door, `player` does what the open step
asks with the answers of `answers/`, `mishaps` goes wrong on purpose. Not here: any rule.
"""
