"""Which of two or more is better, and is that settled?"""
