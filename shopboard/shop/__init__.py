"""What may happen in the shop. Pure rules: the records as they are go in, one step to commit comes out.

Every rule is `rule(state, now, by, …) -> Step` and raises `Refused(why, would_do)` when it does not allow the step.
Nothing here keeps anything: the store runs a rule on fresh records and commits what it answers.
"""
