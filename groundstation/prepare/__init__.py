"""What a day without a network needs: fetched beforehand from open services, and looked through."""
