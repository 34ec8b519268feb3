#!/usr/bin/env bash
# Tools from outside against the API document and a service that runs: a linter, a generated Python client that is used, and
# requests drawn from the schemas. Each finds faults that the others do not. What the tools need is put under target/ci;
# nothing else is left behind. With an argument, only that part: lint, client or requests.
set -euo pipefail
cd "$(dirname "$0")/../.."
part="${1:-all}"
tools="$PWD/target/ci"
python="$tools/python/bin"
mkdir -p "$tools"
[ -x "$python/schemathesis" ] && [ -x "$python/openapi-python-client" ] || {
    python3 -m venv "$tools/python"
    "$python/pip" install --quiet --disable-pip-version-check schemathesis==4.32.5 openapi-python-client==0.29.1
}
[ -x "$tools/node_modules/.bin/redocly" ] || npm install --prefix "$tools" --no-save --no-audit --no-fund --silent @redocly/cli@2.77.0

wanted() {
    [ "$part" = all ] || [ "$part" = "$1" ]
}

if wanted lint; then
    REDOCLY_TELEMETRY=off REDOCLY_SUPPRESS_UPDATE_NOTICE=true "$tools/node_modules/.bin/redocly" lint \
        --config tests/document/lint.yaml openapi/v1.json
fi
wanted client || wanted requests || exit 0

[ -n "${TOILE_BINARY:-}" ] || { cargo build --quiet --workspace --bin toile; TOILE_BINARY=target/debug/toile; }
folder=$(mktemp -d)
service=
# The service is ended by its own id, however this script ends.
finish() {
    [ -z "$service" ] || { kill "$service" 2>/dev/null || true; wait "$service" 2>/dev/null || true; }
    rm -rf "$folder"
}
trap finish EXIT
export TOILE_DATA="$folder/data"
key=$("$TOILE_BINARY" key add 'the checkers' --role admin 2>/dev/null)
: >"$folder/told"
"$TOILE_BINARY" serve --listen 127.0.0.1:0 --log warn >"$folder/told" 2>"$folder/log" &
service=$!
for _ in $(seq 100); do
    grep -q http "$folder/told" && break
    sleep 0.1
done
address=$(grep -o 'http://[0-9.:]*' "$folder/told")

if wanted client; then
    # The generator tells bodies apart by their types in Python, where a workbook and CSV are one: it is shown CSV only.
    "$python/python" - openapi/v1.json "$folder/v1.json" <<'END'
import json, sys
document = json.load(open(sys.argv[1]))
for path in document["paths"].values():
    for operation in path.values():
        content = operation.get("requestBody", {}).get("content", {})
        if "text/csv" in content:
            operation["requestBody"]["content"] = {"text/csv": content["text/csv"]}
json.dump(document, open(sys.argv[2], "w"))
END
    "$python/openapi-python-client" generate --path "$folder/v1.json" --output-path "$folder/toile_client" --meta none \
        --config tests/document/client.json --fail-on-warning 2>&1 | tee "$folder/generated" | tail -n 40
    PYTHONPATH="$folder" "$python/python" tests/document/client.py "$address" "$key"
fi

if wanted requests; then
    # A quote that is there to be looked at and changed.
    QUOTE=$(curl --silent --fail --header "Authorization: Bearer $key" --json '{"customer_reference": "BL-2231", "piece": '"$(cat web/demo.json)"'}' \
        "$address/api/v1/quotes" | grep -o '"id":"[^"]*"' | head -n 1 | cut -d '"' -f 4)
    export QUOTE
    config="$PWD/tests/document/requests.toml"
    # The seed is fixed, so that a run can be repeated; another one may be given. What the tool notes for itself stays in the folder.
    (cd "$folder" && "$python/schemathesis" --config-file "$config" run "$address/api/v1/openapi.json" \
        --url "$address" --header "Authorization: Bearer $key" --seed "${SEED:-1}") || {
        status=$?
        tail -n 50 "$folder/log"
        exit "$status"
    }
fi
if grep -i panicked "$folder/log"; then
    echo 'the service panicked' >&2
    exit 1
fi
