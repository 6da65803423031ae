"""How results appear: folders that appear whole, versions, the links that lead to them, the lock."""
