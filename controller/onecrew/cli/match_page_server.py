"""The page of a match: pictures, sliders and regions in the browser, served on loopback behind a secret of
its own.

The browser adds up the light itself, so that a slider shows at once; what needs the fixture model, the
solve, the lamps or the show is asked of here.
"""

from __future__ import annotations

import asyncio
import hmac
import secrets
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from aiohttp import web
from numpy.typing import NDArray

from onecrew.errors import Mistake, OnecrewError
from onecrew.stills.blend import blend
from onecrew.stills.kit import LampOutput
from onecrew.stills.match import region_results
from onecrew.stills.regions import Region, regions_of
from onecrew.stills.result import Match, as_json, region_json
from onecrew.stills.run import Run
from onecrew.stills.show_picture import jpeg
from onecrew.stills.stack import Plate

FOLDER = Path(__file__).with_name("match_page")
HOST = "127.0.0.1"
COOKIE = "onecrew-match"
MOST_BODY = 1 << 16
KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript"}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

Send = Callable[[str, float, float | None], Awaitable[None]]
"""Sends a lamp's output and mired to the engine; raises ``OnecrewError``."""
Store = Callable[
    [str, Mapping[str, tuple[LampOutput, float | None]], float, Sequence[Any], str], Awaitable[str]
]
"""Stores a cue by its number, in place of the one of which the last was said, if any; returns what was
done."""
Present = dict[str, dict[str, float | None]]
"""Output and mired of each lamp as they are now."""


@dataclass(slots=True)
class MatchPage:
    """One page for one match."""

    run: Run
    reference: Plate
    regions: tuple[Region, ...]
    found: Match
    solve: Callable[[tuple[Region, ...]], Match]
    send: Send
    store: Store
    present: Callable[[], Present | None] = lambda: None
    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    _runner: web.AppRunner | None = None

    async def open(self) -> str:
        """Serve the page; returns its address, which holds the secret."""
        app = web.Application(client_max_size=MOST_BODY, middlewares=[self._guarded])
        app.router.add_get("/", self._file)
        app.router.add_get("/{name:match\\.(?:js|css)}", self._file)
        app.router.add_get("/data", self._data)
        app.router.add_get("/present", self._present)
        app.router.add_get("/reference.jpg", self._reference)
        app.router.add_get("/light/ambient", self._ambient)
        app.router.add_get("/light/{lamp:\\d{1,3}}/{still:\\d{1,3}}", self._light)
        for path, work in (("solve", self._solve), ("predict", self._predict), ("send", self._send)):
            app.router.add_post(f"/{path}", work)
        app.router.add_post("/store", self._store)
        self._runner = web.AppRunner(app, access_log=None)
        await self._runner.setup()
        site = web.TCPSite(self._runner, HOST, 0)
        await site.start()
        port = self._runner.addresses[0][1]
        return f"http://{HOST}:{port}/?key={self.key}"

    async def close(self) -> None:
        """Close the page."""
        if self._runner is not None:
            await self._runner.cleanup()

    # ── who may ─────────────────────────────────────────────────────────────────────────────────

    @web.middleware
    async def _guarded(
        self, request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
    ) -> web.StreamResponse:
        response = await self._answer(request, handler)
        response.headers.update(
            {
                "Content-Security-Policy": POLICY,
                "X-Content-Type-Options": "nosniff",
                "Referrer-Policy": "no-referrer",
                "Cross-Origin-Resource-Policy": "same-origin",
                "Cache-Control": "no-store",
            }
        )
        return response

    async def _answer(
        self, request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
    ) -> web.StreamResponse:
        host = request.headers.get("Host", "")
        if not host.startswith(f"{HOST}:"):
            return web.Response(status=421, text="this page is reached by its address alone\n")
        if request.path == "/" and self._is_key(request.query.get("key", "")):
            entered = web.Response(status=303, headers={"Location": "/"})
            entered.set_cookie(COOKIE, self.key, path="/", httponly=True, samesite="Strict")
            return entered
        if not self._is_key(request.cookies.get(COOKIE, "")):
            return web.Response(status=403, text="open the address that onecrew match printed\n")
        if request.path == "/favicon.ico":
            return web.Response(status=204)
        if request.method == "POST" and request.headers.get("Origin") != f"http://{host}":
            return web.Response(status=403, text="only this page itself can do that\n")
        try:
            return await handler(request)
        except OnecrewError as error:
            return web.json_response({"refused": str(error).splitlines()[0]})
        except (ValueError, KeyError, TypeError, AttributeError):
            return web.json_response({"refused": "that was not understood"}, status=400)

    def _is_key(self, said: str) -> bool:
        return hmac.compare_digest(said.encode(), self.key.encode())

    # ── to see ──────────────────────────────────────────────────────────────────────────────────

    async def _file(self, request: web.Request) -> web.Response:
        name = request.match_info.get("name", "page.html")
        body = (FOLDER / name).read_bytes()
        return web.Response(body=body, content_type=KINDS[Path(name).suffix], charset="utf-8")

    async def _data(self, _: web.Request) -> web.Response:
        lamps = []
        for shown in self.run.lamps:
            blends = [(white.mired or 0.0, blend(white, shown.givens)) for white in shown.whites]
            lamps.append(
                {
                    "id": shown.lamp.id,
                    "stills": len(shown.light),
                    "whites": [
                        {"mired": mired, "shares": one.shares.tolist(), "tint": one.tint.tolist()}
                        for mired, one in blends
                    ],
                }
            )
        return web.json_response(
            {
                "size": self.run.size,
                "lamps": lamps,
                "regions": self._marked(),
                "result": as_json(self.found),
                "present": self.present(),
            }
        )

    async def _present(self, _: web.Request) -> web.Response:
        return web.json_response({"present": self.present(), "regions": self._marked()})

    def _marked(self) -> list[dict[str, Any]]:
        """The regions as the page has them."""
        return [self._fractions(region) for region in self.regions]

    def _fractions(self, region: Region) -> dict[str, Any]:
        sides = {}
        for side, box, plate in (
            ("own", region.own, (self.run.size, self.run.factor)),
            ("reference", region.reference, (self.reference.size, self.reference.factor)),
        ):
            (width, height), factor = plate
            whole = (width * factor, height * factor, width * factor, height * factor)
            sides[side] = list(box) if max(box) <= 1.0 else [v / of for v, of in zip(box, whole, strict=True)]
        return {"name": region.name, **sides}

    async def _reference(self, _: web.Request) -> web.Response:
        return web.Response(body=jpeg(self.found.reference), content_type="image/jpeg")

    async def _ambient(self, _: web.Request) -> web.Response:
        return _linear(self.run.ambient)

    async def _light(self, request: web.Request) -> web.Response:
        lamp, still = int(request.match_info["lamp"]), int(request.match_info["still"])
        if lamp >= len(self.run.lamps) or still >= len(self.run.lamps[lamp].light):
            raise Mistake("there is no such still")
        return _linear(self.run.lamps[lamp].light[still])

    # ── to do ───────────────────────────────────────────────────────────────────────────────────

    async def _solve(self, request: web.Request) -> web.Response:
        self.regions = _regions(await request.json())
        self.found = await asyncio.to_thread(self.solve, self.regions)
        return web.json_response(as_json(self.found))

    async def _predict(self, request: web.Request) -> web.Response:
        body = await request.json()
        leaving, exposure = self._settings(body)
        self.regions = _regions(body)  # a page that is opened again has them
        results = await asyncio.to_thread(
            region_results,
            self.run,
            self.reference,
            self.regions,
            list(leaving.values()),
            exposure,
            self.found.own,
        )
        return web.json_response(
            {
                "regions": {one.name: region_json(one) for one in results},
                "cct_k": {name: one.cct_k for name, (one, _) in leaving.items()},
            }
        )

    async def _send(self, request: web.Request) -> web.Response:
        body = await request.json()
        shown = next((one for one in self.run.lamps if one.lamp.id == body["lamp"]), None)
        if shown is None:
            raise Mistake("there is no such lamp")
        output, mired = _output(body), None if shown.lamp.one_colour else _mired(body)
        await self.send(shown.lamp.id, shown.lamp.level(output), mired)
        return web.json_response({"done": True})

    async def _store(self, request: web.Request) -> web.Response:
        body = await request.json()
        if not str(body["number"]).strip():
            raise Mistake("type the number of the cue first")
        leaving, exposure = self._settings(body)
        results = region_results(
            self.run, self.reference, _regions(body), list(leaving.values()), exposure, self.found.own
        )
        done = await self.store(str(body["number"]), leaving, exposure, results, str(body["replace"]))
        return web.json_response({"done": done})

    def _settings(self, body: Any) -> tuple[dict[str, tuple[LampOutput, float | None]], float]:
        """What leaves each lamp by the sliders, and the exposure."""
        leaving = {}
        for shown in self.run.lamps:
            own = body["settings"][shown.lamp.id]
            mired = None if shown.lamp.one_colour else _mired(own)
            leaving[shown.lamp.id] = (shown.lamp.leaves(_output(own), mired), mired)
        return leaving, min(max(float(body["exposure"]), -12.0), 12.0)


def _regions(body: Any) -> tuple[Region, ...]:
    marked = body.get("regions") or []
    return regions_of(marked, "the page") if marked else ()


def _output(own: Any) -> float:
    return min(max(float(own["output"]), 0.0), 1.0)


def _mired(own: Any) -> float:
    return min(max(float(own["mired"]), 40.0), 1000.0)


def _linear(picture: NDArray[Any]) -> web.Response:
    """Linear light as 16-bit steps of the brightest value in it, little-endian, which every browser's
    machine is."""
    scale = max(float(np.max(picture)), 1e-9) / 65535.0
    steps = np.rint(np.clip(picture, 0.0, None) / scale).astype("<u2")
    return web.Response(
        body=steps.tobytes(), content_type="application/octet-stream", headers={"X-Scale": repr(scale)}
    )
