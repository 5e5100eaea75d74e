"""A Scenario and its replays: the recorded weeks with an edited house, fan plan or sources, and their contrasts."""
