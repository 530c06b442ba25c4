#!/bin/bash
# A sweep on a cluster with Slurm: one job per part of the points, then one job that joins the parts.
#
#   ./slurm.sh my-sweep.toml 16 results        16 parts; the whole ends up in results/whole
#
# Run it where you submit jobs, with motefall in your PATH (or MOTEFALL naming it) and in a folder that all nodes see. A part that
# was killed, or ran out of time, loses nothing: run the same line again and every part goes on where it stopped.
#
# What your cluster wants besides (partition, account, ...) goes into SBATCH_OPTIONS, for example
#   SBATCH_OPTIONS="--partition=short --account=lab" ./slurm.sh my-sweep.toml 16 results
# and the time and cores of a part into TIME and CORES.
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

# Word splitting is wanted: several options.
# shellcheck disable=SC2086
array=$(sbatch --parsable ${SBATCH_OPTIONS:-} \
    --job-name=sweep --array="1-$parts" --cpus-per-task="${CORES:-1}" --time="${TIME:-12:00:00}" \
    --output="$folder/part-%a.log" --open-mode=append \
    --export=ALL,SCENARIO="$scenario",PARTS="$parts",FOLDER="$folder",MOTEFALL="$motefall" \
    --wrap='exec "$MOTEFALL" sweep "$SCENARIO" --shard "$SLURM_ARRAY_TASK_ID/$PARTS" --out "$FOLDER/part-$SLURM_ARRAY_TASK_ID" --threads "${SLURM_CPUS_PER_TASK:-1}"')
array=${array%%;*}

# Begins when all parts have ended, well or not: if points are missing, gather says which and writes nothing.
# shellcheck disable=SC2086
gather=$(sbatch --parsable ${SBATCH_OPTIONS:-} \
    --job-name=gather --dependency="afterany:$array" --time=1:00:00 --output="$folder/gather.log" --open-mode=append \
    --export=ALL,FOLDER="$folder",MOTEFALL="$motefall" \
    --wrap='exec "$MOTEFALL" gather "$FOLDER"/part-*/ --out "$FOLDER/whole"')
gather=${gather%%;*}

echo "parts: job $array, then gather: job $gather"
echo "result: $folder/whole/window.html; messages: $folder/*.log"
