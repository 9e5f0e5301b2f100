"""Which address leads to which page, and what each of them needs: a tank, a paired device, a form."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from planner.serve import (
    access_page,
    animals_page,
    board_page,
    described_page,
    feeds,
    filter_page,
    happened_page,
    plan_page,
    round_page,
    shopping_page,
    test_page,
    today_page,
)
from planner.serve.asking import HERE, Ask, Broken, Site, read_form
from planner.serve.guard import Guard
from planner.serve.markup import Writer, problem_words, writer_for

Handler = Callable[[Ask], Response]


@dataclass(frozen=True, slots=True)
class Page:
    """An address below the site, or with `{slug}` below a tank. `open`: also for devices that are not paired; what changes anything never is.
    `counter`: for a folder of tanks alone."""

    path: str
    show: Handler | None = None
    send: Handler | None = None
    open: bool = True
    counter: bool = False


def files_page(ask: Ask) -> Response:
    """What cannot be read in the files of a tank, each with its place and what helps."""
    seen = ask.look()
    return ask.show("broken.html", problems=[problem_words(p, writer_for(seen, ask.base)) for p in seen.folder.problems], name="What cannot be read", whole=False)


TANK = "/tank/{slug}"
PAGES = (
    Page(TANK, today_page.today),
    Page(TANK + "/done", send=today_page.done),
    Page(TANK + "/skip", send=today_page.skip),
    Page(TANK + "/postpone", send=today_page.postpone),
    Page(TANK + "/undo", send=today_page.take_it_back),
    Page(TANK + "/test", test_page.tests),
    Page(TANK + "/test/check", send=test_page.check),
    Page(TANK + "/test/save", send=test_page.save),
    Page(TANK + "/emergency", happened_page.emergency),
    Page(TANK + "/happened", happened_page.happened, happened_page.note_event),
    Page(TANK + "/failed", happened_page.failed, happened_page.note_failed),
    Page(TANK + "/more", happened_page.more),
    Page(TANK + "/fact", send=happened_page.note_fact),
    Page(TANK + "/description", described_page.described, described_page.describe),
    Page(TANK + "/filter", filter_page.filter),
    Page(TANK + "/plan", plan_page.road),
    Page(TANK + "/plan/{phase}", plan_page.phase),
    Page(TANK + "/animals", animals_page.animals),
    Page(TANK + "/shopping", shopping_page.shopping, shopping_page.put_in_basket),
    Page(TANK + "/round", round_page.round_stop),
    Page(TANK + "/files", files_page),
    Page(TANK + "/calendar", feeds.calendar, feeds.new_address, open=False),
    Page(TANK + "/made", board_page.made),
    Page(TANK + "/taken-back", send=board_page.take_back_buyer, counter=True),
    Page(TANK + "/paper", send=board_page.paper),
    Page("/new", board_page.new_buyer, board_page.make_buyer, open=False, counter=True),
    Page("/papers", send=board_page.papers, counter=True),
    Page("/devices", access_page.devices, open=False),
    Page("/devices/forget", send=access_page.forget_device),
    Page("/feeds/forget", send=access_page.forget_feed),
)


def make_app(site: Site) -> Guard:
    """The whole site as an ASGI application."""
    routes = [
        Route("/", _endpoint(site, Page("/", board_page.board))),
        Route("/feed/{token}/{which}", feeds.Feeds(site).endpoint(), methods=["GET"]),
        Route("/pair", _endpoint(site, Page("/pair", access_page.pair, access_page.pair_device)), methods=["GET", "POST"]),
        *(Route(page.path, _endpoint(site, page), methods=[*(["GET"] if page.show else []), *(["POST"] if page.send else [])]) for page in PAGES),
        Mount("/static", Kept(directory=HERE / "static")),
    ]
    app = Starlette(routes=routes, exception_handlers={404: _not_there, 405: _not_so, 500: _bug})
    app.router.redirect_slashes = False
    return Guard(app, lambda: site.hosts)


class Kept(StaticFiles):
    """Files of ours, which a browser may keep and asks about."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        answer = await super().get_response(path, scope)
        answer.headers["cache-control"] = "no-cache"
        return answer


def _endpoint(site: Site, page: Page) -> Callable[[Request], object]:
    async def answer(request: Request) -> Response:
        form = {}
        if request.method == "POST":
            if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/x-www-form-urlencoded":
                return PlainTextResponse("A form is sent here, nothing else.\n", 415)
            try:
                form = dict(read_form(await request.body()))
            except ValueError:
                return PlainTextResponse("That form has too many fields.\n", 413)
        ask = Ask(site, request.method, request.url.path, request.headers["host"], dict(request.path_params), dict(request.query_params), form)
        return await run_in_threadpool(answered, ask, page, request.cookies.get(site.cookie, ""))

    return answer


def answered(ask: Ask, page: Page, secret: str) -> Response:
    """The page's own answer, once it may be asked; or why not."""
    ask.device = ask.site.memory.device(secret)
    sent = ask.method == "POST"
    handler = page.send if sent else page.show
    assert handler is not None
    # Whoever serves a shop serves other people's tanks: there reading too is for paired devices.
    private = not page.open or not ask.site.tanks.single or (sent and page.path != "/pair")
    if private and page.path != "/pair" and ask.device is None:
        return ask.go("/pair", next=ask.path if not sent else (ask.one("next") if ask.one("next").startswith("/") else f"/tank/{ask.params['slug']}" if "slug" in ask.params else "/"))
    if page.counter and ask.site.tanks.single:
        return ask.say("No such page", "This page is for a folder of tanks.", 404, "/")
    if "slug" in ask.params:
        ask.place = ask.site.tanks.place(ask.params["slug"])
        if ask.place is None:
            return ask.say("No such tank", "There is no tank of this name here.", 404, "/")
    try:
        return handler(ask)
    except Broken as broken:
        return ask.show("broken.html", 200, problems=[problem_words(p, Writer(broken.folder, ask.base)) for p in broken.folder.problems], name=ask.place.path.name if ask.place else "", whole=True)


async def _not_there(_request: Request, _error: Exception) -> Response:
    return PlainTextResponse("There is no such page here.\n", 404)


async def _not_so(_request: Request, _error: Exception) -> Response:
    return PlainTextResponse("This address is not asked in that way.\n", 405)



async def _bug(_request: Request, _error: Exception) -> Response:
    """The report itself stands in the window of whoever started the page."""
    return PlainTextResponse("This is a mistake of ours. Nothing was written that is not in the journal; look there before you send it again.\n", 500)


__all__ = ["Page", "make_app"]
