"""What a command says, told once from its finished answers, and those who set it out.

In come the answers of the layers below; out go sections (`rewire/report/section.py`, begin there)
and, made of them, the text of a terminal, the printed packet and the page. JSON is made of the
answers themselves. Nothing is worked out here, and no room opens another's heavy libraries.
"""
