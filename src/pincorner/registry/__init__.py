"""The registry: documents in, documents out, with everything that ever changed."""
