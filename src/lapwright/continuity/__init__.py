"""Continuity: does every layer tie to the next, lapped the right way?"""
