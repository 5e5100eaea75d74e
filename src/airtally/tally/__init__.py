"""The mass balance: exact stepping, the loop closed by a fan rule, batches over draws and rules.

``house_air`` holds the house as its air sees it; ``coefficients`` turns it into a linear law; ``stepping`` packs
inputs; ``engine.run`` advances given states; ``closed_loop.run_with_rule`` lets a rule choose them; ``sensing`` says
what an instrument sees; ``weather`` cuts weather into levels. Only ``kernels`` is compiled.
"""
