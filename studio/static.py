from whitenoise.storage import CompressedManifestStaticFilesStorage


class ModuleStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # It has no types.
    """Static files by the hash of what is in them, also where one JavaScript module imports another."""

    support_js_module_import_aggregation = True
