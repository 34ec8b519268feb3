"""Uses the client that was generated from the API document, as a portal would: `client.py ADDRESS KEY`."""

import io
import json
import sys
import time
from pathlib import Path

from toile_client import AuthenticatedClient, Client
from toile_client.api.jobs import job_create, job_find, job_result
from toile_client.api.keys import key_create, key_list, key_revoke
from toile_client.api.library import thread_list
from toile_client.api.pieces import batch_answer, estimate_create
from toile_client.api.quotes import quote_change, quote_create, quote_find, quote_list, quote_revise, quote_turn
from toile_client.api.service import health_ready
from toile_client.models import JobStateName, KeyQuestion, KeyRole, Piece, Problem, QuoteDraft, QuoteState, QuoteTurn
from toile_client.types import File

ROOT = Path(__file__).resolve().parents[2]
SHEET = (
    "base_1,base_1_thickness_mm,overlay_1,diameter_mm,thread,run_length_mm,controller\n"
    "wool-felt,3,wool-felt,24,silver-polyamide-40-tex,180,patient-input\n"
)


def main(address: str, key: str) -> None:
    assert health_ready.sync(client=Client(address)).status == "ok"
    client = AuthenticatedClient(address, key, raise_on_unexpected_status=True)

    threads = thread_list.sync(client=client)
    assert any(thread.id == "silver-polyamide-40-tex" for thread in threads.threads)

    piece = Piece.from_dict(json.loads((ROOT / "web" / "demo.json").read_text()))
    estimate = estimate_create.sync(client=client, body=piece)
    assert estimate.verdict == "comfortable" and len(estimate.pads) == 4, estimate

    answered = batch_answer.sync(client=client, body=File(io.BytesIO(SHEET.encode())))
    lines = answered.decode().splitlines()
    assert lines[0].startswith(SHEET.splitlines()[0]) and ",verdict," in lines[0], lines
    assert ",comfortable," in lines[1], lines

    sent = job_create.sync(client=client, body=File(io.BytesIO(SHEET.encode())), name="from the client", idempotency_key="client-1")
    again = job_create.sync(client=client, body=File(io.BytesIO(SHEET.encode())), name="from the client", idempotency_key="client-1")
    assert again.id == sent.id, "the same request with the same key is one job"
    patience = time.monotonic() + 60
    while job_find.sync(sent.id, client=client).state != JobStateName.FINISHED:
        assert time.monotonic() < patience, "the job does not come to its end"
        time.sleep(0.1)
    assert job_result.sync(sent.id, client=client).decode().splitlines() == lines

    draft = QuoteDraft(customer_reference="BL-2231", title="Armrest", terms="Payment within 30 days.", piece=piece)
    kept = quote_create.sync(client=client, body=draft, idempotency_key="client-quote-1")
    assert (kept.state, kept.revision, kept.verdict) == (QuoteState.DRAFT, 1, estimate.verdict), kept
    assert quote_create.sync(client=client, body=draft, idempotency_key="client-quote-1").id == kept.id
    found = quote_find.sync_detailed(kept.number, client=client)
    assert found.parsed.id == kept.id and found.parsed.piece.quantity == piece.quantity, found.parsed
    assert found.parsed.estimate.sentence == estimate.sentence
    draft.title = "Armrest with four patches"
    changed = quote_change.sync_detailed(kept.id, client=client, body=draft, if_match=found.headers["etag"])
    assert changed.parsed.title == draft.title, changed
    # The first tag names a state that is gone.
    stale = quote_turn.sync(kept.id, client=client, body=QuoteTurn(state=QuoteState.SENT), if_match=found.headers["etag"])
    assert isinstance(stale, Problem) and stale.status == 412, stale
    sent_quote = quote_turn.sync(kept.id, client=client, body=QuoteTurn(state=QuoteState.SENT), if_match=changed.headers["etag"])
    assert sent_quote.state == QuoteState.SENT, sent_quote
    revised = quote_revise.sync(kept.id, client=client, body=draft, idempotency_key="client-quote-2")
    assert (revised.number, revised.revision, revised.state) == (kept.number, 2, QuoteState.DRAFT), revised
    listed = quote_list.sync(client=client, customer_reference="BL-2231", revisions=True)
    assert [quote.id for quote in listed.quotes] == [revised.id, kept.id], listed

    made = key_create.sync(client=client, body=KeyQuestion(name="from the client", role=KeyRole.READER, expires_in_days=1))
    assert made.secret.startswith("toile_")
    assert made.key.id in [listed.id for listed in key_list.sync(client=client).keys]
    reader = AuthenticatedClient(address, made.secret)
    refused = estimate_create.sync(client=reader, body=piece)
    assert isinstance(refused, Problem) and refused.status == 403, refused
    assert key_revoke.sync(made.key.id, client=client).revoked_at
    refused = thread_list.sync(client=reader)
    assert isinstance(refused, Problem) and refused.status == 401, refused
    print("the generated client works")


main(*sys.argv[1:])
