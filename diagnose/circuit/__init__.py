"""Loop -> numbers: graph, symbolic equations, compiled predictor, SPICE export."""
