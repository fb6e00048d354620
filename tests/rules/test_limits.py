"""The limits that hold for every test do hold."""

import socket
import warnings

import pytest


def test_nothing_beyond_this_machine_can_be_reached() -> None:
    # 192.0.2.0/24 is set aside for documentation (RFC 5737): nobody is there.
    with socket.socket() as plug, pytest.raises(OSError, match="tests have no network"):
        plug.connect(("192.0.2.1", 9))


def test_this_machine_can_be_reached() -> None:
    with socket.socket() as server, socket.socket() as plug:
        server.bind(("127.0.0.1", 0))
        server.listen()
        plug.connect(server.getsockname())
        assert plug.getpeername() == server.getsockname()


def test_a_warning_is_an_error() -> None:
    with pytest.raises(UserWarning, match="heard"):
        warnings.warn("heard", UserWarning, stacklevel=1)


@pytest.mark.parametrize(("mark", "limit"), [("long", 300), ("full", 300), ("published", None)])
def test_only_a_marked_test_may_take_five_minutes(
    mark: str, limit: int | None, request: pytest.FixtureRequest
) -> None:
    # The same hook that looked at every test of this run looks at one more.
    item = pytest.Function.from_parent(
        request.node.parent, name="one_more", callobj=test_this_machine_can_be_reached
    )
    item.add_marker(getattr(pytest.mark, mark))
    request.config.hook.pytest_collection_modifyitems(
        session=request.session, config=request.config, items=[item]
    )
    found = item.get_closest_marker("timeout")
    assert (found.args[0] if found else None) == limit
