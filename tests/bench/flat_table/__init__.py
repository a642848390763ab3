"""A table of independent indications as flat arrays, with scores kept from fact to fact: a yardstick for other scorers.

`flat` holds the table, `flat_tables` makes it from dense ones, `flat_belief` is Bayes' rule over it, `flat_scores` says
how much each indication would tell, `flat_rollout` looks further ahead. `scores.py` beside this folder measures it.
"""
