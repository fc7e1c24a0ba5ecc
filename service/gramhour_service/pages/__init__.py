"""What people see: templates, drawings, words, one stylesheet, plain scripts.

The room is handed answers of the contract and draws them. It must not know the store, the
calculation, or who asks: what is not in an answer cannot reach a page. A figure on a page is the
answer's own text; only where a drawing puts its lines is computed here. The routes are in
``http/site``.
"""
