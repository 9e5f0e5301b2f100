"""What other programs and the commands ask of a tank folder: read it, plan from it, write to its journal. `planner` hands out the names."""
