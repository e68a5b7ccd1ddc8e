"""Which lot works which run."""
