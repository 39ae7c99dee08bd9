"""Collect: plan the walk, put it in order, write down what came home."""
