"""(see the modules)"""
