"""The metal data model, its units and its calculations: pure, no framework and no database."""
