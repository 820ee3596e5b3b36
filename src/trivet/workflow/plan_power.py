"""Power of the plan of a campaign, for the check before a run."""

from __future__ import annotations

from trivet.campaign.folder import CampaignFolder
from trivet.stages.planning.before import PlanPower, power_before_data
from trivet.stages.planning.design import Calendar

__all__ = ["PlanPower", "power_of_plan"]


def power_of_plan(campaign: CampaignFolder) -> list[PlanPower]:
    """Say what the cells of the build sheet could show, contrast by contrast.

    Parameters
    ----------
    campaign : CampaignFolder
        Settings, build sheet and bench log without fault.
    """
    settings = campaign.settings
    return power_before_data(
        campaign.cells,
        comparison=settings.comparison,
        calendar=Calendar(settings.campaign.planned_end, settings.campaign.time_zone),
        seed=settings.survival.seed,
    )
