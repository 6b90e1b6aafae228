"""Papers for the bench, the shop and the owner: each a typed value made from a job, laid out by a template."""
