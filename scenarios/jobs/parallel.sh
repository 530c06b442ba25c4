#!/bin/bash
# A sweep in several parts with GNU parallel, on this computer or on others.
#
#   ./parallel.sh my-sweep.toml 8 results      8 parts; the whole ends up in results/whole
#
# As many parts run at a time as there are cores, one core each. Run it with motefall in your PATH (or MOTEFALL naming it). If it is
# stopped, run the same line again: every part goes on where it stopped.
#
# To use other computers that see the same folder under the same name, list them in PARALLEL_OPTIONS, for example
#   PARALLEL_OPTIONS="--sshlogin :,bench2,bench3 --workdir ." ./parallel.sh my-sweep.toml 24 results
set -euo pipefail

if [ $# -ne 3 ]; then
    echo "usage: $0 SCENARIO PARTS FOLDER" >&2
    exit 2
fi
scenario=$(realpath "$1")
parts=$2
folder=$3
motefall=${MOTEFALL:-motefall}
mkdir -p "$folder"
folder=$(realpath "$folder")

# A part that fails does not stop the others; gather says what is missing then.
# Word splitting is wanted: several options.
# shellcheck disable=SC2086
seq "$parts" | parallel ${PARALLEL_OPTIONS:-} --quote \
    "$motefall" sweep "$scenario" --shard "{}/$parts" --out "$folder/part-{}" --threads 1 || true

exec "$motefall" gather "$folder"/part-*/ --out "$folder/whole"
