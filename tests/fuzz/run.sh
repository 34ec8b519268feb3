#!/usr/bin/env bash
# Lets the fuzzer loose on every target, or on those that are named, from the corpus in this folder:
#
#   tests/fuzz/run.sh [SECONDS [TARGET...]]
#
# Needs `cargo install cargo-fuzz --locked` and stable Rust. What it breeds is thrown away, or kept in the folder that
# TOILE_FUZZ_KEEP names (whole path); an input that something does not hold for stays in target/fuzz/found. TOILE_FUZZ_SEED draws others.
set -euo pipefail
cd "$(dirname "$0")"
seconds=${1:-15}
targets=("${@:2}")
[ "${#targets[@]}" -gt 0 ] || targets=(csv xlsx piece query)
built=../../target/fuzz
host=$(rustc -vV | sed -n "s/^host: //p")
found=$built/found

# Without a sanitizer, which needs an unstable compiler: there is no unsafe code of ours for one to watch.
cargo fuzz build --fuzz-dir . --dev --sanitizer none --target-dir "$built"

mkdir -p "$found"
spare=$(mktemp -d)
trap 'rm -rf "$spare"' EXIT
for target in "${targets[@]}"; do
    bred=${TOILE_FUZZ_KEEP:-$spare}/$target
    mkdir -p "$bred" "$spare/tmp"
    echo "== $target, $seconds s"
    # A line of state now and then is enough; all of it is shown when something does not hold.
    if ! TMPDIR="$spare/tmp" "$built/$host/debug/$target" "$bred" "corpus/$target" \
        -max_total_time="$seconds" -timeout=25 -rss_limit_mb=2048 -max_len=8192 -seed="${TOILE_FUZZ_SEED:-1}" \
        -artifact_prefix="$found/$target-" >"$spare/log" 2>&1; then
        tail -n 60 "$spare/log"
        exit 1
    fi
    grep -E '^Done |INITED' "$spare/log"
done
