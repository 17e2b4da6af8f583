"""A profile from answers to questions: what is asked, and what is written then."""
