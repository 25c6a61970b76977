#!/bin/sh
# One element of a Slurm job array: flies every COUNTth of the listed shards. Submitted by slurm-follow.sh.
#SBATCH --job-name=periband-shards
#SBATCH --ntasks=1
#SBATCH --no-requeue
set -u
list=$1
count=$2
program=${PERIBAND:-@PROGRAM@}
run=@RUN@
code=0
# The numbers come by another descriptor, so that the program cannot read them away.
while read -r index <&3; do
  "$program" shard "$run" --index "$index" --threads "${SLURM_CPUS_PER_TASK:-1}" --quiet || code=$?
done 3<<NUMBERS
$(awk -v count="$count" -v own="$SLURM_ARRAY_TASK_ID" 'NR % count == own % count' "$list")
NUMBERS
exit "$code"
