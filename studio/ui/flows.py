FLOWS = {}
