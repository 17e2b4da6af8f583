"""What a profile may say, for people and for their editors: made from the schema, never written twice."""
