"""temporary"""

from dataclasses import dataclass


@dataclass
class Learnt:
    lines: tuple = ()


def learn(*a):
    return None


def write_learnt(*a):
    pass
