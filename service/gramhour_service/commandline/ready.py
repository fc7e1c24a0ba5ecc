"""When the order is ready, as a person reads it: the day, what it rests on, what machines do."""

from msgspec import UNSET
from rich.console import Console

from gramhour.contract.lead_time import LeadTime, MachinePlan
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.screen import heading, paragraph, show_texts
from gramhour_service.commandline.words import counted

MOMENT = "%a %Y-%m-%d %H:%M"
MACHINE_TABLE = ("Machine", "Free from", "Starts", "First", "Last ends")


def show_ready(console: Console, quoted: Quoted) -> None:
    """Show when the order is ready, or why that cannot be said; nothing without staffed hours."""
    told = quoted.answer.lead_time
    if told is UNSET:
        return
    heading(console, "Ready")
    if told is None:
        why = quoted.answer.no_lead_time
        paragraph(console, f"No day can be named: {'' if why is UNSET else why}.")
        return
    paragraph(console, f"{told.ready_on:%A}, {told.ready_on}: {_rests_on(told)}.")
    if told.caution is not UNSET:
        paragraph(console, told.caution)
    if told.machines:
        show_texts(console, MACHINE_TABLE, [_row(plan, quoted) for plan in told.machines])


def _rests_on(told: LeadTime) -> str:
    busy = [hours for queue in told.workload.machines.values() for hours in queue.queue_h]
    beside = "beside what machines are promised for" if any(busy) else "with machines that are free"
    return (
        f"ordered {told.from_.astimezone(told.ready_at.tzinfo):{MOMENT}}, {beside}, and ready in "
        f"the shop {told.ready_at:{MOMENT}}; the starts are enough with a chance of "
        f"{told.probability_pct} %"
    )


def _row(plan: MachinePlan, quoted: Quoted) -> tuple[str, ...]:
    starts = [moment for builds in plan.builds for moment in builds.starts_at]
    name = quoted.name_of("machines", plan.machine)
    number = f" no. {plan.number}" if plan.number > 1 else ""
    return (
        f"{name}{number}",
        f"{plan.free_from:{MOMENT}}",
        counted(len(starts), "build"),
        f"{starts[0]:{MOMENT}}",
        f"{plan.ends_at:{MOMENT}}",
    )
