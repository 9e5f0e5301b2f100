"""Virtual keepers who live with the plan, day by day, beside a virtual tank: the engine judged by whole lives."""
