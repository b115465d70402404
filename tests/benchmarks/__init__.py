"""What the parts that must be quick cost, as ratios: python -m tests.benchmarks NAME"""
