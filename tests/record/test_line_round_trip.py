"""Every kind of line survives being written and read."""

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import strategies
from stagecall.model.event import AnyLine, Settled
from stagecall.record import Log, framing, read
from stagecall.record.framing import decode, document, encode, framed, seal_in


@pytest.mark.parametrize("kind", strategies.LINE_TYPES)
def test_a_line_of_every_kind_decodes_to_itself(kind: type[AnyLine]) -> None:
    @settings(max_examples=50)
    @given(strategies.line(kind))
    def decodes_to_itself(line: AnyLine) -> None:
        assert decode(encode(line)) == line

    decodes_to_itself()


@settings(max_examples=60)
@given(strategies.headers(), strategies.bodies())
def test_append_returns_exactly_what_the_reader_decodes(header: AnyLine, body: list[AnyLine]) -> None:
    log = Log.in_memory(header)
    returned = [log.header, *(log.append(line) for line in body)]
    digest = log.close()

    reading = read(log.contents())
    lines = list(reading.lines)

    assert lines[:-1] == returned
    assert [repr(line) for line in map(without_documents, lines[:-1])] == [
        repr(line) for line in map(without_documents, returned)
    ]
    assert (reading.complete, reading.damage, reading.digest) == (True, [], digest)


def without_documents(line: AnyLine) -> AnyLine:
    """Of a document's typed form the bytes, since its repr is an address."""
    typed = getattr(line, "typed", None)
    return line if typed is None else msgspec.structs.replace(line, typed=bytes(typed))


@settings(max_examples=60)
@given(strategies.headers(), strategies.bodies(), st.data())
def test_the_same_lines_give_the_same_bytes_wherever_the_caller_syncs(
    header: AnyLine, body: list[AnyLine], data: st.DataObject
) -> None:
    plain, synced = Log.in_memory(header), Log.in_memory(header)
    for line in body:
        plain.append(line)
        synced.append(line)
        if data.draw(st.booleans()):
            synced.sync()
    plain.close()
    synced.close()

    assert synced.contents() == plain.contents()


@given(st.integers(0, 2**53), st.integers(0, 2**53))
def test_a_settled_moment_is_framed_as_any_line_is(n: int, t: int) -> None:
    raw, written = framed(Settled(t=t), n)

    assert written == Settled(n=n, t=t)
    assert raw == seal_in(encode(written))


def test_a_document_in_many_logs_stands_in_each_as_it_would_alone() -> None:
    def fresh() -> AnyLine:
        return document("kit", "full", "points: {}\n", {"kit": "full"})

    shared = fresh()
    for n in (1, 2, 1):
        raw, written = framed(shared, n)
        alone, read_alone = framed(fresh(), n)

        assert raw == alone
        assert repr(without_documents(written)) == repr(without_documents(read_alone))
        assert shared.n == -1


def test_documents_that_are_gone_are_not_taken_for_new_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(framing, "FRAMED", 2)
    for k in range(20):
        raw, _ = framed(document("kit", f"kit-{k}", "", {}), 1)

        assert decode(raw).name == f"kit-{k}"  # type: ignore[union-attr]
