"""The figures for a Prometheus server over HTTP; a token opens them (`Authorization: Bearer`)."""

from fastapi import Request, Response

from service.alerts import metrics
from service.alerts.channels_api import worker_of
from service.edge.asking import Anyone
from service.edge.transaction import Reading, Router
from service.edge.wiring import wiring

router = Router(tags=["service"])


@router.get(
    "/metrics",
    operation_id="read_metrics",
    summary="Figures for Prometheus",
    response_class=Response,
    responses={200: {"content": {"text/plain": {"schema": {"type": "string"}}}}},
)
def read_metrics(request: Request, who: Anyone, db: Reading) -> Response:
    """Gauges in Prometheus' text form, moments of last success among them."""
    found = metrics.text(
        db,
        worker_of(request).machine,
        now=wiring(request).clock(),
        version=request.app.version,
    )
    return Response(found, media_type="text/plain; version=0.0.4; charset=utf-8")
