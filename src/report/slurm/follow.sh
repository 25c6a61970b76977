#!/bin/sh
# Starts a planned run on Slurm and follows it up: `sh slurm-follow.sh` on a machine that can submit.
#
# Submits a job array for the shards without a valid part, and itself to run after it: then it merges, or submits
# what is still missing, at most three rounds in all. What counts are valid parts, never what the queue says.
# Partition, account, time and cores a task come from the environment, as in SBATCH_PARTITION, SBATCH_TIMELIMIT;
# PERIBAND is the program, if it is not where it was when the run was planned. The folder must be shared.
#SBATCH --job-name=periband-follow
#SBATCH --ntasks=1
#SBATCH --requeue
set -eu
round=${1:-1}
rounds=3
most=${PERIBAND_ARRAY:-1000}
program=${PERIBAND:-@PROGRAM@}
run=@RUN@
logs=$run/slurm
mkdir -p "$logs"
list=$logs/round-$round.txt
"$program" missing "$run" >"$list"
count=$(awk 'END { print NR }' "$list")
echo "round $round: $count shards without a valid part"
if [ "$count" -eq 0 ] || [ "$round" -gt "$rounds" ]; then
  # Names what is missing and exits with 3, or writes the summary and prints the digest.
  exec "$program" merge "$run"
fi
if [ "$count" -gt "$most" ]; then count=$most; fi
job=$(sbatch --parsable --array="1-$count" --output="$logs/shards-%A_%a.log" "$run/slurm-shards.sh" "$list" "$count")
job=${job%%;*}
sbatch --dependency="afterany:$job" --output="$logs/follow-$((round + 1))-%j.log" \
  "$run/slurm-follow.sh" "$((round + 1))"
