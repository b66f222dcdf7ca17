"""Proofs that no layout exists."""
