"""The repair in section and in plan: how many layers, how much powder, and where each placement goes?"""
