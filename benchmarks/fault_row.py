"""What became of the station under one fault, as a line of a table."""

from dataclasses import dataclass


@dataclass(slots=True)
class Row:
    """What became of one fault."""

    fault: str
    rounds: int = 0
    acknowledged: int = 0
    lost: int = 0
    due: int = 0
    delivered: int = 0
    doubled: int = 0
    outage_s: float = 0.0
    note: str = ""

    @property
    def good(self) -> bool:
        return self.lost == 0 and self.delivered == self.due and self.rounds > 0

    def text(self) -> str:
        return (
            f"{'ok  ' if self.good else 'FAIL'}  {self.fault:28} {self.rounds:6}"
            f" {self.acknowledged:12,} {self.lost:5} {self.due:4} {self.delivered:9}"
            f" {self.doubled:7} {self.outage_s:8.1f} s  {self.note}"
        )


HEAD = (
    "      fault                        rounds acknowledged  lost  due delivered doubled"
    "    longest outage"
)
