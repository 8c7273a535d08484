"""How threads share a pull, against closed forms and against resolved threads.

A chain of springs and two bars (`thread_load`), resolved rings (`thread_rings`), a nut on its bolt (`nut`).
Each file offers `CHECKS`.
"""
