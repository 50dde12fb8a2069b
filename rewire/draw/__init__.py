"""Pictures: findings and values come in, scenes in millimetres go out, as SVG, PNG or PDF.

Begin reading at ``scene`` (what stands where), then ``lugview``; ``paint`` puts it on paper.
"""
