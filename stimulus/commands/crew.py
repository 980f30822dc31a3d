"""Who does the work of many exams: the options that say so, and the crew they mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stimulus.commands.parameters import Number, Words

if TYPE_CHECKING:
    from protocols.simulate.workers import Crew

workers_option = click.option(
    "--workers",
    type=Number(1, 1024, "Leave it out for one a processor.", whole=True),
    metavar="N",
    help="Processes on this machine; one a processor by default.",
)
cluster_option = click.option(
    "--cluster",
    type=Words("the address of a Dask scheduler"),
    metavar="ADDRESS",
    help="Work on a Dask cluster instead, such as tcp://10.0.0.5:8786.",
)


def crew_for(workers: int | None, cluster: str | None) -> Crew:
    """Who does the work: processes here or a cluster; raises InputError for both at once."""
    from protocols.errors import InputError
    from protocols.simulate.workers import cores, crew_of

    if cluster is None:
        return crew_of(workers or cores())
    if workers is not None:
        allowed = "one of --workers and --cluster"
        raise InputError("--workers", workers, allowed, "Leave it out: the cluster has its own.")
    from protocols.simulate.cluster import Cluster

    found = Cluster(cluster)
    found.require_reachable()
    return found
