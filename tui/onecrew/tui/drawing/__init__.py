"""What several screens draw: text on a canvas, block digits, thin lines, the plan, the diagram."""
