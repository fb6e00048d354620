"""A simulated specimen, installation and recorder: readings with a known truth behind them.

Allowed to use the circuit solver, never the closed forms of bridge, leads, gauge, bar or chain:
what is simulated and what is reduced must not agree by sharing a formula.
"""

from gaugewright.sources.simulated.small_campaign import ALLOWANCES, SmallCampaign
from gaugewright.sources.simulated.small_records import SmallUids, lay_down

__all__ = ["ALLOWANCES", "SmallCampaign", "SmallUids", "lay_down"]
